"""The outbox: claims, states and the way out. It knows no kind of notice. See DEVELOPERS.md, "The one flow"."""

"""The outbox: claims, states and the way out. See DEVELOPERS.md, "The one flow"."""

"""Places and hours by maintained libraries, over plain values: how far a clinic is, and when it is open."""

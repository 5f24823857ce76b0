"""The phone's doors: personal links, seal keys, what arrives and where it goes."""

"""Settings, addresses and the shell of the pages."""

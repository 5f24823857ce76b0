"""The doors for programs, under /api/v1/: the same services as the pages, one shape for every error."""

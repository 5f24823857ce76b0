"""What every page and every door of the API uses: who may come in, one form engine, one table of statuses, the retry."""

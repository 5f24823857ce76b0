"""An invented programme whose dates lie around today, built through the services. Never loaded over real data."""

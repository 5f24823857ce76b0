"""People, their immunisation record, regimens, clearance for field work, outings and rosters."""

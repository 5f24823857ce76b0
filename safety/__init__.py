"""Incidents, washing, referral, follow-up doses, notices and lessons."""

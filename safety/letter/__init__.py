"""The referral letter: one page of facts for the clinician, who decides; in the clinic's language too."""

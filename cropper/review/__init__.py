"""Looking and adjusting: a local page on which every crop is trusted, corrected and approved."""

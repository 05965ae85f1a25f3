"""Each shape a record ever had, one file a step."""

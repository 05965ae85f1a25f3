"""Which crop, and why: rules, the exact optimum per destination, reasons. No I/O in this room."""

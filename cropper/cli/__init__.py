"""The command line: one file per verb; a verb's body is parse, call one library function, print."""

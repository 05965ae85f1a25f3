"""The account room: what the record can tell, on pages and in calendars."""

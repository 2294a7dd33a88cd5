"""Lists that come in from a spreadsheet and go out to one."""

"""Lists in and out: wire lists and fuse charts as CSV or spreadsheet, to and from the language."""

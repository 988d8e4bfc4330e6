"""The command line: read a ledger, judge it, print what it means."""

"""Around a lone mechanic: what the command line asks, the messages to the contacts, the day's test of the alarm."""

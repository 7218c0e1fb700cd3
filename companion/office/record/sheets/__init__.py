"""The sheets that leave the office, the customer's and the claim's: what the log does not tell is "not recorded"."""

"""The companion: a spoken second person for a mechanic who works alone."""

VERSION = "0.1.0"

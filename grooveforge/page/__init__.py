"""The local page: a session over one song sheet, its values as JSON, a guarded server, one exported file."""

"""Thin resources over HTTP: parse, call, answer. No SQL, no arithmetic."""

"""Putting: make rates, putts by length, two putters."""

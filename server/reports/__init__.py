"""Reports: what is answered to a question, as documents for people and programs."""

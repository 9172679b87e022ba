"""Pure numpy and pandas: frames in, frames out. No web, no SQL, no clock; only `load_baseline` reads files."""

"""The demo fleet: an invented shop, its people and engines, dates relative to today. Not for flight."""

"""The demo fleet: an invented shop, its people and engines, with dates relative to today. Teaching numbers, not for flight."""

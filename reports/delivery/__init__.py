"""The delivery of an aircraft: how its first two hours and its ferry home are planned, and what that would earn."""

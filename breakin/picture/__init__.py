"""What can be worked out from a build's record before any rule judges: clock, power, heat and oil."""

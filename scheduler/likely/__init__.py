"""How a plan's day is likely to go: the plan played on many simulated days, and the finish times that hold."""

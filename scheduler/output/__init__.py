"""What leaves the program: the plan's folder, the timetable in words, and the pictures of the day."""

"""What a day's log teaches: hand times, paces, spoilage, heating and cooling, each with its uncertainty."""

from scheduler.learning.propose import Lesson, Proposal, learn

__all__ = ["Lesson", "Proposal", "learn"]

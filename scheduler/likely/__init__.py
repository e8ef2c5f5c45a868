"""How a plan's day is likely to go: the plan played on many simulated days, and the finish times that hold."""

from scheduler.likely.foresee import DAYS, foresee, holds
from scheduler.likely.network import network_of
from scheduler.likely.play import STILL, Played, play
from scheduler.likely.rooms import Known

__all__ = ["DAYS", "STILL", "Known", "Played", "foresee", "holds", "network_of", "play"]

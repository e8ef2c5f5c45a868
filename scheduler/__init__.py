"""From a day folder to an audited plan."""

__version__ = "0.1.0"

"""The trade's cautions, shown wherever work is printed or shown."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "Hot platens and freshly pressed work burn, bare metal of 51 °C (124 °F) within a minute: "
    "use gloves or tools, guard the point of operation, "
    "and never walk away from a closed press.",
    "The film maker's and the garment maker's data sheets go before any figure here.",
    "Films of unknown make, vinyl chloride above all, can give off harmful fumes: ventilate the room, "
    "and do not press what is not made for it.",
    "Several presses on one circuit can overload it: have a licensed electrician size it.",
    "Local codes and rules go before this program's advice.",
)

SHORT_CAUTION = "Platens and fresh work burn. Data sheets and local rules go before this plan; ventilate."

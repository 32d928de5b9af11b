"""Fuel and air on the bench: jets, needle, intake, idle, what a mixture is worth; and the cautions of such work, each said once.

An answer takes what bears on it from here.
"""

from __future__ import annotations

LEAN = (
    "Lean at large openings runs hot and can seize the engine or hole a piston: in doubt take the rich side, and at the first "
    "sign (hot, pinging, hanging idle, white plug) stop and go back."
)
JUDGE = "Judge on a closed course or a dynamometer, not in traffic. Mark the grip so that the opening is known."
FUEL = "Fuel: engine cold, fuel shut off, no flame or spark near, and catch what runs out of the float bowl."
ONE_CHANGE = "One change a trial: keep the old part, and write down how to put it back."
SLIDE = "Keep dirt out of the open carburetor, and check that the slide moves freely and shuts before starting."
ROOM = "Work in the open or with the doors wide open: fuel vapor burns, and exhaust gas kills in a closed room within minutes."
MECHANIC = "Where any of this is new to you, have a qualified mechanic do it."
MANUAL = "The maker's manual, and the emission rules where you ride, come first."

JETTING = (LEAN, JUDGE, FUEL, ONE_CHANGE, MANUAL)

"""Slopes of grain that others allow, to compare the limits with; the strictest first.

Where the text of a rule was not seen itself, its source says who repeats it.
"""

from typing import Final

from service.judge.record import Comparator

DUFF: Final = "Duff, Bows and Arrows (1927) ch. IV: grain should not cross the bow in less than 15 in"

COMPARATORS: Final = (
    Comparator(use="A bow 3/4 in thick, grain crossing it in 15 in", slope=0.75 / 15, source=DUFF),
    Comparator(
        use="Baseball bats, about", slope=1 / 20, source="the rule for professional bats, as its makers tell it"
    ),
    Comparator(
        use="Axe handles", slope=1 / 20, source="US Forest Service specification of axe handles (2003), as quoted"
    ),
    Comparator(use="Spars of aircraft", slope=1 / 15, source="FAA AC 43.13-1B (1998) Table 1-1; ANC-19 (1943) 2.4100"),
    Comparator(use="Rungs and cleats of ladders", slope=1 / 15, source="Pennsylvania Code title 34, 21.23"),
    Comparator(
        use="Wood ladders", slope=1 / 12, source="ANSI A14.1-2007, as quoted in Forest Products Journal 68(4):459"
    ),
    Comparator(
        use="A bow 1-1/4 in thick, grain crossing it from back to belly in 15 in",
        slope=1.25 / 15,
        source=f"{DUFF}; from back to belly that may still make a good bow",
    ),
    Comparator(
        use="Furniture and wood that bears loads, commonly", slope=1 / 12, source="Wengert, advice to the trade"
    ),
    Comparator(
        use="The middle half of an aircraft spar's depth", slope=1 / 10, source="ANC-19 (1943) 2.4100 to 2.4102"
    ),
)

"""Slopes of grain that others allow, to compare the limits with; the strictest first.

Where the text of a rule was not seen itself, its source says who repeats it.
"""

from typing import Final

from service.judge.record import Comparator
from service.language import mark

COMPARATORS: Final = (
    Comparator(
        use=mark("A bow 3/4 in thick, grain crossing it in 15 in"),
        slope=0.75 / 15,
        source=mark("Duff, Bows and Arrows (1927) ch. IV: grain should not cross the bow in less than 15 in"),
    ),
    Comparator(
        use=mark("Baseball bats, about"),
        slope=1 / 20,
        source=mark("the rule for professional bats, as its makers tell it"),
    ),
    Comparator(
        use=mark("Axe handles"),
        slope=1 / 20,
        source=mark("US Forest Service specification of axe handles (2003), as quoted"),
    ),
    Comparator(
        use=mark("Spars of aircraft"),
        slope=1 / 15,
        source=mark("FAA AC 43.13-1B (1998) Table 1-1; ANC-19 (1943) 2.4100"),
    ),
    Comparator(use=mark("Rungs and cleats of ladders"), slope=1 / 15, source=mark("Pennsylvania Code title 34, 21.23")),
    Comparator(
        use=mark("Wood ladders"),
        slope=1 / 12,
        source=mark("ANSI A14.1-2007, as quoted in Forest Products Journal 68(4):459"),
    ),
    Comparator(
        use=mark("A bow 1-1/4 in thick, grain crossing it from back to belly in 15 in"),
        slope=1.25 / 15,
        source=mark(
            "Duff, Bows and Arrows (1927) ch. IV: grain should not cross the bow in less than 15 in; from back to "
            "belly that may still make a good bow"
        ),
    ),
    Comparator(
        use=mark("Furniture and wood that bears loads, commonly"),
        slope=1 / 12,
        source=mark("Wengert, advice to the trade"),
    ),
    Comparator(
        use=mark("The middle half of an aircraft spar's depth"),
        slope=1 / 10,
        source=mark("ANC-19 (1943) 2.4100 to 2.4102"),
    ),
)

"""What is cheapest: repair against vibration, sealing and refinishing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError, TableError
from analysis.planning.cheapest_words import cheapest_lines, cheapest_sentence
from analysis.services.shop_costs import Prices, cheapest_of_form, cheapest_of_type
from ui.cache import next_steps
from ui.vibration import words
from ui.widgets.fields import number
from ui.widgets.notice import plain, plain_lines, refuse
from ui.words import literal

if TYPE_CHECKING:
    from analysis.model.vibration import VibrationQuestion
    from analysis.planning.cheapest import Cheapest
    from analysis.services.log import Log


def show_cheapest(log: Log, question: VibrationQuestion) -> None:
    """Ask for prices, then say what is cheapest for the forms of this type."""
    with st.expander(words.CHEAPEST):
        st.write(words.CHEAPEST_WHY)
        try:
            prices = _prices()
            if prices is None:
                st.write(words.CHEAPEST_TYPE)
                return
            shop = next_steps.shop(log)
            _say(cheapest_of_type(shop, question, prices))
            names = [
                one.name for one in shop.forms if one.form_type == question.form_type
            ]
            worn = [
                name
                for name, found in shop.wear(names).items()
                if found.advice in {"refinish", "retire"}
            ]
            if prices.refinish_minutes is not None:
                for name in worn:
                    _say(cheapest_of_form(shop, name, prices))
        except TableError as error:  # too little is logged yet: no fault
            plain(str(error))
        except StruckfaceError as error:
            refuse(error)


def _prices() -> Prices | None:
    per_hour = number(words.PER_HOUR, "cheapest hour")
    lost = number(words.LOST_PER_SECOND, "cheapest second")
    minutes = number(words.REFINISH_MINUTES, "cheapest refinish", unit="min")
    if per_hour is None:
        return None
    return Prices(
        per_hour=per_hour, lost_per_second=lost or 0.0, refinish_minutes=minutes
    )


def _say(found: Cheapest) -> None:
    st.markdown(f"**{literal(cheapest_sentence(found))}**")
    plain_lines(cheapest_lines(found))

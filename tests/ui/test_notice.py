"""What is said when a button's act is refused."""

from streamlit.testing.v1 import AppTest


def refused_act():
    # A page of its own: it sees nothing of this file.
    import streamlit as st  # noqa: PLC0415

    from analysis.errors import RecordError  # noqa: PLC0415
    from ui.widgets.notice import refusing  # noqa: PLC0415

    def act(what: str) -> None:
        msg = f"{what} is gone"
        raise RecordError(msg)

    st.button("Delete", on_click=refusing(act), args=("This form",))
    st.write("The page stands.")


def test_a_refused_act_is_told_and_the_page_stands():
    page = AppTest.from_function(refused_act).run()

    page.button[0].click().run()

    assert not page.exception
    assert [one.value for one in page.error] == ["This form is gone"]
    assert page.markdown[-1].value == "The page stands."

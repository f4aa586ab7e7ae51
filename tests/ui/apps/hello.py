"""The smallest app: tells whether the server and the browser of the tests work."""

import os

import streamlit as st

st.title("Struck")
st.write(f"data in {os.environ['STRUCKFACE_DATA']}")

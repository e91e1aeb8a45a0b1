"""The dashboard: ``streamlit run app.py``, or ``lensyard dashboard``."""

from lensyard.pages import run

if __name__ == "__main__":
    run()

"""From snapshot rows to what a page says: pure, no Streamlit, no chart."""

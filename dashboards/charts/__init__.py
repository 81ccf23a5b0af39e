"""Frame to Altair chart; no Streamlit."""

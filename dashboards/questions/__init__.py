"""One question per page, each a function ``render()``; a folder named pages would be taken for Streamlit's own."""

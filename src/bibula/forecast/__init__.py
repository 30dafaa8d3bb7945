"""A plan and its cards become a forecast with a band."""

"""The guidance screen: how it looks, and nothing of what it decides."""

"""ENTRY -> SOUND: tones and a spoken read-back of what is already on disk."""

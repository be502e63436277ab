"""SOUND -> UTTERANCE: from a microphone or a file to what was said, with rivals and a refusal."""

"""All that tells the person: screen, window, video, tones, speech, phone, terminal."""

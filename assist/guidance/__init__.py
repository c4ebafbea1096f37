"""From where somebody stands to what they are told: verdict, guidance as facts, one message."""

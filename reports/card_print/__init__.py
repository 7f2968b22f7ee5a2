"""The next-flight card on paper: a tagged PDF (PDF/UA-1) set from what the card says, with a blank log on its back."""

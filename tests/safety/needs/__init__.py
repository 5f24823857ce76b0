"""What a case needs: one answer, and every reader held to it."""

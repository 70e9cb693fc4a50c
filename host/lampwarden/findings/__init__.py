"""From colours and doses to conclusions: change, plateau, fading, treatments compared, colour that comes back. Pure."""

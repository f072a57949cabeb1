"""How accurately a robot drives, from tests measured with a tape."""

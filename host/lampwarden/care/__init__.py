"""What people must know before they treat a sheet: peroxide, and cautions by paper, ink and treatment. Pure."""

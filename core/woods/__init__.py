"""What is known of woods: the species table, their colour, what eyes make of it, and how moist they get."""

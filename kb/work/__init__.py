"""What is done with the stock: picked, recorded, traced and counted."""

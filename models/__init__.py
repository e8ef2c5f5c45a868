"""What things are: shop, films, garments, designs, orders, operations, plans. No solver, no files."""

"""What a zone plan does with water: networks solved while dosing and flushing, and afterwards."""

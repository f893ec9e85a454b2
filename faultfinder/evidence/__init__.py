"""Reading against prediction: tolerance decided once, ohms become grades and facts."""

"""Pictures and tables of the manual, made by the program that it describes."""

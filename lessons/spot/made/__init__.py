"""Items made from the body and the tables of supply: a module for each way of asking."""

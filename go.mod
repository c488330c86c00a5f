module lampwise

go 1.26

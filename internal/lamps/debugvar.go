package lamps

var debugPrint bool

package job

import (
	"testing"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/lamps"
)

// TestHabitIsOfOccasions: to check a drifted set again and again makes no habit
// of the drift; what lamps do from day to day does.
func TestHabitIsOfOccasions(t *testing.T) {
	began := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	check := func(after time.Duration, key, fill float64) book.SetCheck {
		return book.SetCheck{When: began.Add(after), Verdict: string(lamps.OutcomeDrift), Changes: map[string]float64{"key": key, "fill": fill}}
	}
	var again []book.SetCheck
	for i := range 20 {
		again = append(again, check(time.Duration(i)*5*time.Minute, 0.3-0.6*float64(i%2), 0.25*float64(i%3)))
	}
	if got := habitOf(again); got != lamps.StartingHabit {
		t.Errorf("one morning makes a habit: %+v", got)
	}
	const day = 24 * time.Hour
	var week []book.SetCheck
	for i := range 10 {
		key := 0.12 * float64(i%3-1)
		week = append(week, check(time.Duration(i)*day, key, -key), check(time.Duration(i)*day+time.Hour, 0, 0))
	}
	if got := habitOf(week); got.Mention <= lamps.StartingHabit.Mention {
		t.Errorf("ten days of lamps that wander by 0.12 stop make no habit: %+v", got)
	}
}

package reply

import (
	"testing"

	"stepgate/rules"
)

// Two numbers with two codes in one text each keep their own, in any order and
// whatever was asked.
func TestBothScores(t *testing.T) {
	for _, asked := range asked {
		readAll(t, asked, []said{
			{"F3 D8", `{"done":"all","pain":8,"first_step":3}`},
			{"F 3 D 8", `{"done":"all","pain":8,"first_step":3}`},
			{"D8 F3", `{"done":"all","pain":8,"first_step":3}`},
			{"F2, D7", `{"done":"all","pain":7,"first_step":2}`},
			{"F3 / D8", `{"done":"all","pain":8,"first_step":3}`},
			{"F3 N 8", `{"done":"none","pain":8,"first_step":3}`},
			{"F3 P8", `{"pain":8,"first_step":3}`},
			{"first steps 3 and then 8", `{"pain":8,"first_step":3}`},
			{"3 first steps and 8 after", `{"pain":8,"first_step":3}`},
			{"first steps: left 3 right 5", `{"first_step":5,"side":"right"}`},
		})
		readSpanish(t, asked, []said{
			{"M3 T8", `{"done":"all","pain":8,"first_step":3}`},
			{"M 3 T 8", `{"done":"all","pain":8,"first_step":3}`},
			{"T M 3 8", `{"done":"all","pain":8,"first_step":3}`},
			{"U M3 8", `{"done":"some","pain":8,"first_step":3}`},
			{"los primeros pasos 3 y luego 8", `{"pain":8,"first_step":3}`},
			{"M3 hice todo 8", `{"done":"all","pain":8,"first_step":3}`},
			{"M 5 T 2", `{"done":"all","pain":2,"first_step":5}`},
			{"3 primeros pasos y 8 después", `{"pain":8,"first_step":3}`},
			{"M2, T7", `{"done":"all","pain":7,"first_step":2}`},
			{"M3 / T8", `{"done":"all","pain":8,"first_step":3}`},
			{"M3 N 8", `{"done":"none","pain":8,"first_step":3}`},
			{"T 8, M 3", `{"done":"all","pain":8,"first_step":3}`},
		})
	}
}

// After the first-step question a number beside what was done may be either
// score: it is the first-step one, and if high the daily one too. A number
// alone answers the question.
func TestEitherScore(t *testing.T) {
	readAll(t, rules.AskFirstStep, []said{
		{"D9", `{"done":"all","pain":9,"first_step":9}`},
		{"D 9", `{"done":"all","pain":9,"first_step":9}`},
		{"done 9", `{"done":"all","pain":9,"first_step":9}`},
		{"done, 9", `{"done":"all","pain":9,"first_step":9}`},
		{"9 done", `{"done":"all","pain":9,"first_step":9}`},
		{"S4", `{"done":"some","pain":4,"first_step":4}`},
		{"N 5", `{"done":"none","pain":5,"first_step":5}`},
		{"D3", `{"done":"all","first_step":3}`},
		{"9", `{"first_step":9}`},
		{"a nine", `{"first_step":9}`},
		{"F9", `{"first_step":9}`},
		{"D F9", `{"done":"all","first_step":9}`},
		{"D P9", `{"done":"all","pain":9}`},
	})
	readSpanish(t, rules.AskFirstStep, []said{
		{"T9", `{"done":"all","pain":9,"first_step":9}`},
		{"hice todo 9", `{"done":"all","pain":9,"first_step":9}`},
		{"T 2", `{"done":"all","first_step":2}`},
		{"9", `{"first_step":9}`},
	})
	readAll(t, rules.AskPain, []said{{"D9", `{"done":"all","pain":9}`}})
}

// "Without pain" is no 0 where the same clause takes it back.
func TestNoPainDenied(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"couldn't do it without pain", `{"done":"none","unread":true}`},
		{"never without pain", unread},
		{"3 days without pain", unread},
		{"when I was without pain", unread},
		{"done, without pain", `{"done":"all","pain":0}`},
		{"not today, no pain", `{"done":"none","pain":0}`},
	})
	readSpanish(t, rules.AskPain, []said{
		{"no pude hacerlos sin dolor", `{"done":"none","unread":true}`},
		{"no los hice sin dolor", `{"done":"none","unread":true}`},
		{"no terminé sin dolor", `{"done":"some","unread":true}`},
		{"cuando estuve sin dolor", unread},
		{"nunca estoy sin dolor", unread},
		{"no hay día sin dolor", unread},
		{"ni un día sin dolor", unread},
		{"no estoy sin dolor", unread},
		{"quisiera estar sin dolor", unread},
		{"imposible hacerlos sin dolor", unread},
		{"3 días sin dolor", unread},
		{"no hice nada, sin dolor", `{"done":"none","pain":0}`},
		{"hice todo sin dolor", `{"done":"all","pain":0}`},
	})
}

// The number of an exercise, a time, a letter meant as a code of another
// language and an "almost" give no low score.
func TestNoLowScoreFromOtherNumbers(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"missed the 3", `{"done":"none","unread":true}`},
		{"did everything except the 2", `{"done":"some","unread":true}`},
		{"almost 0", `{"pain":1}`},
		{"nearly zero", `{"pain":1}`},
		{"almost 4", `{"pain":4}`},
		{"m 3", unread},
		{"missed the 3, pain 5", `{"done":"none","pain":5}`},
	})
	readSpanish(t, rules.AskPain, []said{
		{"me faltó el 2", `{"done":"some","unread":true}`},
		{"me faltó 1", `{"done":"some","unread":true}`},
		{"me faltaron 2", `{"done":"some","unread":true}`},
		{"no pude el 2", `{"done":"none","unread":true}`},
		{"no pude con el 3", `{"done":"none","unread":true}`},
		{"son las 2", unread},
		{"hice todo menos el 2", `{"done":"some","unread":true}`},
		{"me faltó el 2, dolor 6", `{"done":"some","pain":6}`},
		{"casi 0", `{"pain":1}`},
		{"casi cero", `{"pain":1}`},
		{"casi 10", `{"pain":10}`},
	})
}

// Made from the server's Go types: go test ./internal/server -run TestClient -update
import { post } from './post.ts';
import type * as T from './types.gen.ts';

export type * from './types.gen.ts';

/** what the page opens with */
export const start = (ask: T.Nothing): Promise<T.Started> => post("start", ask);

/** what a clip is */
export const probe = (ask: T.FileAsked): Promise<T.Probed> => post("probe", ask);

/** reads a grade file */
export const openGrade = (ask: T.FileAsked): Promise<T.OpenedGrade> => post("grade/open", ask);

/** writes a starting grade */
export const newGrade = (ask: T.GradeWanted): Promise<T.OpenedGrade> => post("grade/new", ask);

/** writes a grade file */
export const saveGrade = (ask: T.GradeKept): Promise<T.OpenedGrade> => post("grade/save", ask);

/** how a frame's light lies along the ladder, and its regions' readings */
export const light = (ask: T.LightAsked): Promise<T.LiveLight> => post("light", ask);

/** writes a grade as a LUT file */
export const lut = (ask: T.LUTWanted): Promise<T.Baked> => post("lut", ask);

/** what a set says */
export const set = (ask: T.SetAsked): Promise<T.ShownSet> => post("set", ask);

/** what a set reads at other levels, through a grade */
export const mix = (ask: T.MixAsked): Promise<T.LiveMix> => post("mix", ask);

/** levels for targets */
export const solve = (ask: T.SolveAsked): Promise<T.Solved> => post("solve", ask);

/** gives lamps of a set names */
export const rename = (ask: T.RenameAsked): Promise<T.Nothing> => post("rename", ask);

/** begins a render */
export const render = (ask: T.RenderAsked): Promise<T.Job> => post("render", ask);

/** begins to verify a finished file */
export const verify = (ask: T.VerifyAsked): Promise<T.Job> => post("verify", ask);

/** begins to learn a set from a switch clip */
export const learn = (ask: T.LearnAsked): Promise<T.Job> => post("learn", ask);

/** begins a set check */
export const check = (ask: T.CheckAsked): Promise<T.Job> => post("check", ask);

/** begins to measure a clip */
export const measure = (ask: T.MeasureAsked): Promise<T.Job> => post("measure", ask);

/** begins to make the generated example in a folder */
export const demo = (ask: T.DemoAsked): Promise<T.Job> => post("demo", ask);

/** plans the calls of a switching order */
export const call = (ask: T.CallAsked): Promise<T.Called> => post("call", ask);

/** a plan's figures as it stands on the page */
export const lookRoom = (ask: T.RoomAsked): Promise<T.LivePlan> => post("room/look", ask);

/** writes a plan to begin from */
export const newRoom = (ask: T.RoomWanted): Promise<T.LivePlan> => post("room/new", ask);

/** writes a plan's text */
export const saveRoom = (ask: T.RoomKept): Promise<T.Nothing> => post("room/save", ask);

/** levels that make a plan read what is wanted */
export const solveRoom = (ask: T.RoomSolve): Promise<T.PlanSolved> => post("room/solve", ask);

/** what a set measured beside what a plan predicts */
export const meetRoom = (ask: T.RoomMeet): Promise<T.PlanMet> => post("room/meet", ask);

/** the generic lamps */
export const kindsRoom = (ask: T.Nothing): Promise<T.LampKinds> => post("room/kinds", ask);

/** stops a job */
export const cancel = (ask: T.JobAsked): Promise<T.Nothing> => post("cancel", ask);

/** which phones are paired, and how to pair one */
export const statePhones = (ask: T.Nothing): Promise<T.PhonesState> => post("phones/state", ask);

/** shows a code for one phone */
export const codePhones = (ask: T.Nothing): Promise<T.PhonesState> => post("phones/code", ask);

/** forgets a phone */
export const forgetPhones = (ask: T.PhoneAsked): Promise<T.PhonesState> => post("phones/forget", ask);

/** what a phone's page opens with */
export const startPhone = (ask: T.Nothing): Promise<T.PhoneStarted> => post("phone/start", ask);

/** begins to work out what a grade should be for a clip */
export const suggestGrade = (ask: T.AdviceAsked): Promise<T.Job> => post("grade/suggest", ask);

/** begins to work out what a grade costs on a clip */
export const budgetGrade = (ask: T.AdviceAsked): Promise<T.Job> => post("grade/budget", ask);

/** a grade with settings put into it */
export const withGrade = (ask: T.GradeSet): Promise<T.GradeGot> => post("grade/with", ask);

/** a set's episodes with what was found of their clips */
export const allEpisodes = (ask: T.SetAsked): Promise<T.EpisodeBook> => post("episodes/all", ask);

/** what would be done with a folder of clips */
export const planEpisodes = (ask: T.EpisodeWanted): Promise<T.EpisodePlanned> => post("episodes/plan", ask);

/** makes an episode and begins its work */
export const addEpisodes = (ask: T.EpisodeWanted): Promise<T.Job> => post("episodes/add", ask);

/** goes on with what waits of an episode */
export const workEpisodes = (ask: T.EpisodeAsked): Promise<T.Job> => post("episodes/work", ask);

/** lets clips that were set aside wait again, and works */
export const retryEpisodes = (ask: T.EpisodeRetry): Promise<T.Job> => post("episodes/retry", ask);

/** two episodes beside each other */
export const compareEpisodes = (ask: T.EpisodesCompared): Promise<T.ComparedEpisodes> => post("episodes/compare", ask);

/** a set's numbers over its episodes */
export const historyEpisodes = (ask: T.SetAsked): Promise<T.EpisodeHistory> => post("episodes/history", ask);

/** begins to write an episode's report */
export const reportEpisodes = (ask: T.EpisodeAsked): Promise<T.Job> => post("episodes/report", ask);

/** begins to write what others need of a grade */
export const handoffEpisodes = (ask: T.HandoffAsked): Promise<T.Job> => post("episodes/handoff", ask);

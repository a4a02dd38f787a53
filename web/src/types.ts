// The program's own types, under the names the pages use.

export type {
  Alternative, BlockAnswer, BlockNight, Choice, Compared, Course, Feed, FeedList, FloorState, Freshness, Health, Mixture,
  Poller, Quantiles, Risk, Shared, Skill, Stage, StageBody, StageLook, StartCurve, StartPoint, Strip, Worth,
} from './api/client';
import type { Block, BlockAnswer, Choice, FarmState, Freshness, Tonight } from './api/client';

export type Answer = Tonight;
export type Farm = FarmState;
export type FarmBlock = Block;
export type Urgency = BlockAnswer['urgency'];
export type ChoiceKind = Choice['kind'];
export type FeedState = Freshness['forecast'];

// The rules of lensyard.game.state, line for line: a state and a result give the next state.
// A test plays random games through both.
const game = (() => {
  const MOVES = ["gain", "run", "complete", "scramble", "sack"];
  const TAKEN = ["interception", "fumble", "kick"];
  const other = (team) => (team === "home" ? "away" : "home");
  const clamp = (ball) => Math.min(Math.max(ball, 1), 99);
  const directionOf = (state, team) => (team === state.offense ? state.direction : -state.direction);
  const over = (state) => ({ ...state, phase: "over", down: null, distance_yd: null });

  function apply(state, result, rules) {
    const before = { ...state, changed_hands: false };
    if (state.phase === "scrimmage") return afterSnap(before, result, rules);
    if (state.phase === "try") return afterTry(before, result, rules);
    if (state.phase === "kickoff") return afterKickoff(before, result, rules);
    return null;
  }

  function afterSnap(state, result, rules) {
    const { kind } = result;
    let ball = result.yardline_100;
    if (kind === "safety") return safety(state, rules);
    if (kind === "field-goal") {
      const three = scored(state, state.offense, 3);
      return possessionOver(three, kickoff(three, state.offense, rules), rules);
    }
    if (kind === "no-play") return afterFlag(state, result);
    if (kind === "missed" && ball === null)
      ball = Math.min(Math.max(100 - rules.touchback, state.yardline_100 + rules.missed_behind_yd), 99);
    if (TAKEN.includes(kind) || kind === "missed")
      return taken(state, ball === null ? 0 : ball, rules.touchback, rules);
    if (ball === null) ball = state.yardline_100;
    if (ball <= 0) return touchdown(state, state.offense, rules);
    if (ball >= 100) return safety(state, rules);
    if (kind === "kick-kept") return series(state, ball);
    return nextDown(state, ball, result.first_down, rules);
  }

  function nextDown(state, ball, firstDown, rules) {
    const toGain = state.yardline_100 - (state.distance_yd || 0);
    if (firstDown || ball <= toGain) return series(state, ball);
    const down = state.down || 1;
    if (down === 4) return taken(state, ball, rules.touchback, rules);
    return { ...state, down: down + 1, yardline_100: ball, distance_yd: ball - toGain };
  }

  function afterFlag(state, result) {
    const ball = clamp(result.yardline_100 === null ? state.yardline_100 : result.yardline_100);
    const toGain = state.yardline_100 - (state.distance_yd || 0);
    if (result.first_down || ball <= toGain) return series(state, ball);
    return { ...state, yardline_100: ball, distance_yd: ball - toGain };
  }

  const series = (state, ball) =>
    ({ ...state, phase: "scrimmage", yardline_100: ball, down: 1, distance_yd: Math.min(10, ball) });
  const turned = (state) =>
    ({ ...state, offense: other(state.offense), direction: -state.direction, changed_hands: true });

  function taken(state, ball, touchback, rules) {
    if (ball >= 100) return touchdown(state, other(state.offense), rules);
    return possessionOver(state, series(turned(state), ball <= 0 ? touchback : 100 - ball), rules);
  }
  function scored(state, team, points) {
    const name = team === "home" ? "home_points" : "away_points";
    return { ...state, [name]: state[name] + points };
  }
  function touchdown(state, team, rules) {
    const six = scored(state, team, 6);
    if (isOver({ ...six, turn: six.turn + 1 }, team, rules)) return over(six);
    return tryOf(six, team, rules);
  }
  const tryOf = (state, team, rules) => ({
    ...(team === state.offense ? state : turned(state)),
    phase: "try", yardline_100: rules.try_from, down: null, distance_yd: null,
  });
  function safety(state, rules) {
    const two = scored(state, other(state.offense), 2);
    const kick = { ...kickoff(two, state.offense, rules), yardline_100: rules.safety_kick_from };
    return possessionOver(two, kick, rules);
  }
  const kickoff = (state, team, rules) => ({
    ...state, phase: "kickoff", offense: team, direction: directionOf(state, team),
    yardline_100: rules.kickoff_from, down: null, distance_yd: null,
  });

  function afterTry(state, result, rules) {
    const { kind, yardline_100: ball } = result;
    if (kind === "no-play") return { ...state, yardline_100: clamp(ball === null ? state.yardline_100 : ball) };
    let after = state;
    if (kind === "field-goal") after = scored(state, state.offense, 1);
    else if (MOVES.includes(kind) && ball === 0) after = scored(state, state.offense, 2);
    else if ((TAKEN.includes(kind) || kind === "missed") && ball === 100)
      after = scored(state, other(state.offense), rules.return_on_try);
    return possessionOver(after, kickoff(after, state.offense, rules), rules);
  }

  function afterKickoff(before, result, rules) {
    let state = before, ball = result.yardline_100;
    if (result.kind === "no-play") return { ...state, yardline_100: clamp(ball === null ? state.yardline_100 : ball) };
    if (result.kind === "kick-kept") {
      if (ball === null) ball = state.yardline_100 - 10;
      if (state.quarter === 5 && state.first === null) state = { ...state, first: other(state.offense), turn: 1 };
      return ball <= 0 ? touchdown(state, state.offense, rules) : series(state, Math.min(ball, 99));
    }
    if (result.kind !== "kick") return null;
    if (ball !== null && ball >= 100) return touchdown(state, other(state.offense), rules);
    let follows = turned(state);
    if (state.quarter === 5 && state.first === null) follows = { ...follows, first: follows.offense };
    return series(follows, !ball ? rules.kickoff_touchback : 100 - ball);
  }
  const kickoffOut = (state, rules) =>
    ({ kind: "kick", yardline_100: Math.max(state.yardline_100 - rules.kickoff_out_yd, 1), first_down: false });
  function flagResult(state, penalty) {
    const ball = state.yardline_100, back = penalty.against_offense;
    const yards = Math.min(penalty.yards, Math.floor((back ? 100 - ball : ball) / 2));
    return { kind: "no-play", yardline_100: back ? ball + yards : ball - yards, first_down: penalty.first_down };
  }

  function endQuarter(state, rules) {
    if (state.phase === "over") return null;
    const turn = { ...state, direction: -state.direction, clock_s: null };
    if (state.quarter === 1 || state.quarter === 3) return { ...turn, quarter: state.quarter + 1 };
    if (state.quarter === 2)
      return { ...kickoff(turn, other(state.opened_by), rules), quarter: 3, changed_hands: false };
    if (state.quarter === 5 || state.home_points !== state.away_points) return over(state);
    const extra = { ...turn, quarter: 5, period: 1, turn: 0, first: null, changed_hands: false };
    if (rules.overtime === "kickoff") return kickoff(extra, state.opened_by, rules);
    return overtimeSeries({ ...extra, first: state.offense }, rules);
  }
  function overtimeSeries(state, rules) {
    if (rules.tries_only_from_period && state.period >= rules.tries_only_from_period)
      return tryOf(state, state.offense, rules);
    return series(state, rules.overtime_from);
  }
  function isOver(state, scorer, rules) {
    if (state.quarter !== 5 || state.home_points === state.away_points) return false;
    const ahead = state.home_points > state.away_points ? "home" : "away";
    if (scorer !== null && scorer !== ahead) return false;
    if (state.turn >= 2 || (ahead !== state.first && scorer !== null)) return true;
    if (rules.overtime === "series") return false;
    return ahead !== state.first || (scorer === ahead && rules.first_touchdown_wins);
  }
  function possessionOver(state, follows, rules) {
    if (state.quarter !== 5) return follows;
    const ended = { ...state, turn: state.turn + 1 };
    if (isOver(ended, null, rules)) return over(ended);
    if (rules.overtime === "kickoff") return { ...follows, turn: ended.turn };
    const first = state.first || state.offense, next = other(first);
    if (ended.turn >= 2)
      return overtimeSeries({ ...ended, period: state.period + 1, turn: 0, offense: next, first: next }, rules);
    return overtimeSeries({ ...ended, offense: next, changed_hands: true }, rules);
  }

  function otherTeam(state) {
    const turn = turned(state);
    if (state.phase === "scrimmage") return series(turn, 100 - state.yardline_100);
    return { ...turn, changed_hands: false };
  }
  return { apply, endQuarter, otherTeam, kickoffOut, flagResult, directionOf };
})();

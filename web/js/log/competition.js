/** The round that locks a player's evidence: everything on the phone that asks about the lock asks here. */
import { everCompetition, locks } from '../game/competition-lock.js';
import { answer } from './database.js';
import { shotsIn } from './store.js';

/**
 * The competition round that locks (rule 4.3a), or null; of several one that is not deleted.
 * @param {import('./store.js').Store} store @param {string} playerId @returns {Promise<import('./store.js').StoredRecord|null>}
 */
export async function lockingRound(store, playerId) {
  return store.run(['records', 'changes'], 'readonly', async (transaction) => {
    const rounds = await answer(transaction.objectStore('records').index('player_kind').getAll([playerId, 'round']));
    for (const round of rounds.filter((one) => locks(one, true)).sort((a, b) => a.deleted - b.deleted)) {
      // rounds that were stored before it was noted what they ever were
      const ever =
        round.competition ??
        everCompetition(await answer(transaction.objectStore('changes').index('record_id').getAll(round.record_id)));
      if (ever && locks(round, !round.deleted || (await shotsIn(transaction, playerId, round.record_id)).length > 0))
        return round;
    }
    return null;
  });
}

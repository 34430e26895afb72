"""The hidden side of the rules: the deal, the passes, what may be claimed, proof, payment.

What everybody can see is ruled by ``handread.table``; here is what only the tiles can say.
"""
